"""Lines: where each key of a TOML file stands, so that a fault can name its row."""

from typing import Any

from pipeline.errors import Fault

Path = tuple[str | int, ...]


def key_lines(text: str) -> dict[Path, int]:
    """Return the line (from 1) of every table and key in `text`.

    Array tables count from 0: the second ``[[area]]``'s name is ``("area", 1, "name")``.
    """
    import tree_sitter_toml
    from tree_sitter import Language, Parser

    tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode())
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    for node in tree.root_node.children:
        if node.type == "pair":
            _pair(node, (), lines)
        elif node.type in ("table", "table_array_element"):
            _table(node, lines, counts)
    return lines


def _table(node: Any, lines: dict[Path, int], counts: dict[Path, int]) -> None:
    head = _numbered(_keys(node.named_children[0]), counts)
    if node.type == "table_array_element":
        counts[head] = counts.get(head, -1) + 1
        head = (*head, counts[head])
    lines.setdefault(head, node.start_point[0] + 1)
    for child in node.named_children[1:]:
        if child.type == "pair":
            _pair(child, head, lines)


def _numbered(keys: Path, counts: dict[Path, int]) -> Path:
    """Put the index of the newest element into a path that runs through an array of tables."""
    full: Path = ()
    for key in keys[:-1]:
        full = (*full, key)
        if full in counts:
            full = (*full, counts[full])
    return (*full, *keys[-1:])


def _pair(node: Any, head: Path, lines: dict[Path, int]) -> None:
    path = (*head, *_keys(node.named_children[0]))
    lines.setdefault(path, node.start_point[0] + 1)
    value = node.named_children[1]
    if value.type == "inline_table":
        for child in value.named_children:
            if child.type == "pair":
                _pair(child, path, lines)


def _keys(node: Any) -> Path:
    if node.type == "dotted_key":
        return tuple(key for child in node.named_children for key in _keys(child))
    return (node.text.decode().strip("\"'"),)


def locate(lines: dict[Path, int], path: Path) -> int | None:
    """Line of `path`, or of the nearest table above it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def toml_fault(file: str, lines: dict[Path, int], path: Path, problem: str, remedy: str) -> Fault:
    """Return a fault at a TOML path."""
    return Fault(file, locate(lines, path), ".".join(str(part) for part in path), problem, remedy)
