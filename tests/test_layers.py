"""Layers: who may import whom, held against the code; and the middle that touches no file and no clock."""

import ast
from pathlib import Path

import pytest

import pipeline

ROOT = Path(pipeline.__path__[0])

ALLOWED = {
    # The ground: nothing of ours beneath it.
    "errors": "",
    "units": "",
    "clock": "",
    "epoch": "",
    "table": "",
    "parts": "",
    "finding": "",
    # Charts of process control are plain functions of arrays.
    "spc": "",
    # The config is read with the clock and the units it speaks of.
    "config": "clock errors units",
    # What all of the middle passes on.
    "facts": "table",
    "case": "config epoch facts table",
    "result": "config",
    "week": "case clock config finding result upsets",
    "advice": "",
    "wording": "config",
    # The middle computes: a record's baseline, errors against it, episodes beyond a limit.
    "baseline": "case clock config epoch facts spc table",
    "evidence": "baseline case epoch spc",
    # What several tags say together, put on each one's case.
    "neighbours": "baseline case clock config epoch facts spc table units",
    "episodes": "epoch",
    "margin": "result",
    "record": "case config episodes epoch margin",
    "assess": "clock config episodes epoch margin record result",
    # Formulas of the trade are plain functions of arrays; disinfection reads the rule's own table, once.
    "disinfection": "",
    "calculations": "disinfection",
    # What limits count and average.
    "tally": "assess calculations case clock config disinfection episodes epoch finding margin record result "
    "units wording",
    "coverage": "case clock episodes epoch facts table",
    # A finding that many parts make alike.
    "recording": "advice case finding",
    # Parts see what the middle offers them and never each other.
    "checks": "advice baseline case clock config evidence finding neighbours recording wording spc epoch",
    "limits": "assess clock config episodes epoch margin record result tally",
    # What is found is put in order, and one function puts the middle together.
    "service": "case",
    "outcomes": "case clock finding service",
    "moment": "finding",
    "bench": "baseline case finding moment",
    "triage": "bench case clock config finding moment result week wording",
    "judge": "baseline case checks clock config coverage errors finding limits outcomes parts record result "
    "tally triage week",
    # The rim: ingest and judgement meet only through the archive.
    "ingest": "clock config errors parts table units",
    "archive": "config errors table clock",
    "logbook": "clock config errors table units",
    "looks": "errors ingest",
    "batch": "archive config errors ingest looks",
    "intake": "archive batch config errors looks",
    "casebook": "baseline case clock config facts logbook neighbours table",
    "gather": "archive baseline case casebook config facts logbook",
    "setup": "baseline clock config errors ingest",
    "progress": "",
    "say": "config intake report run",
    "query": "archive config errors logbook table",
    # A page is made from a week, whatever made the week.
    "report": "__version__ advice case clock config epoch errors finding parts result service table units "
    "upsets week wording",
    # The plant is invented from scratch: it must know nothing of what looks for its faults.
    "demo": "errors",
    # The job told in order, and the verbs that start it.
    # What went wrong together: from departures to a dossier's content.
    "upsets": "baseline case clock config epoch evidence finding limits margin record result spc table "
    "wording",
    "shapes": "__version__ archive config gather logbook upsets",
    "investigate": "archive case clock config facts errors finding gather logbook shapes table upsets",
    "reported": "config finding",
    "opened": "archive clock config errors gather investigate logbook report reported shapes upsets",
    "cli_upset": "config errors opened query report say upsets",
    "run": "__version__ archive batch checks clock config deliver errors gather intake investigate judge "
    "limits logbook parts report week",
    # The system's own timer calls the job.
    "schedule": "clock config errors",
    "deliver": "archive config errors",
    "cli_schedule": "config schedule",
    "fleet": "",
    "cli_fleet": "fleet say",
    "cli_period": "clock config errors run",
    "cli": "__version__ cli_fleet cli_period cli_schedule cli_upset config demo errors intake progress query "
    "report run say setup",
}
"""Room and the rooms it may import."""

MIDDLE = [
    *("epoch", "facts", "case", "finding", "recording", "result", "week", "wording", "advice"),
    *("spc", "baseline", "evidence", "neighbours", "checks"),
    *(
        "episodes",
        "margin",
        "record",
        "assess",
        "tally",
        "calculations",
        "limits",
        "coverage",
        "moment",
        "bench",
        "triage",
        "judge",
    ),
    *("service", "outcomes", "upsets"),
]
OPEN_FOLDERS = ("checks", "limits", "calculations", "ingest/layouts", "report/sections")

FILES = sorted(ROOT.rglob("*.py"))


def _room(path):
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def _imports(path):
    """Every module that a file imports, wherever in it, dotted."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written out"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _ours(path):
    names = [name.split(".") for name in _imports(path)]
    return [parts[1:] for parts in names if parts[0] == "pipeline" and len(parts) > 1]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_room_imports_only_what_the_table_says(path):
    room = _room(path)
    if room in ("__init__", "__main__"):
        return
    wanted = {parts[0] for parts in _ours(path)} - {room}
    assert wanted <= set(ALLOWED[room].split()), f"{path.name} of {room}"


def test_every_room_is_in_the_table():
    rooms = {_room(path) for path in FILES} - {"__init__", "__main__"}
    assert rooms <= set(ALLOWED)


def test_the_table_has_no_way_round():
    """Rooms can be put in an order in which each imports only earlier ones."""
    left = {room: set(allowed.split()) & set(ALLOWED) for room, allowed in ALLOWED.items()}
    while left:
        free = [room for room, needs in left.items() if not needs & set(left)]
        assert free, f"these go in circles: {sorted(left)}"
        for room in free:
            del left[room]


def test_ingest_and_judgement_never_meet():
    for room in (*MIDDLE, "report"):
        assert not set(ALLOWED[room].split()) & {
            "ingest",
            "archive",
            "intake",
            "gather",
            "run",
            "cli",
            "logbook",
        }
    assert not set(ALLOWED["ingest"].split()) & set(MIDDLE)


@pytest.mark.parametrize("folder", OPEN_FOLDERS)
def test_parts_never_import_each_other(folder):
    inside = folder.split("/")
    for path in sorted((ROOT / folder).glob("*.py")):
        for parts in _ours(path):
            is_sibling = parts[: len(inside)] == inside and len(parts) > len(inside)
            # What is imported from the folder itself is its contract, not a part of it.
            assert not (is_sibling and (ROOT / folder / f"{parts[len(inside)]}.py").exists()), path.name


def test_charts_of_process_control_need_arrays_alone():
    for path in sorted((ROOT / "spc").glob("*.py")):
        others = {name for name in _imports(path) if not name.startswith("pipeline.spc.")}
        outside = {name.split(".")[0] for name in others} - {
            "dataclasses",
            "functools",
            "collections",
            "numpy",
            "scipy",
        }
        assert not outside, path.name


TOUCHES_THE_WORLD = {
    *("pathlib", "os", "io", "shutil", "glob", "tempfile", "socket", "urllib", "subprocess", "sys"),
    *("time", "random", "secrets", "locale"),
}
CALLS = {
    *("open", "read_text", "write_text", "read_bytes", "write_bytes", "getenv"),
    *("now", "today", "utcnow", "fromtimestamp", "default_rng", "seed"),
}
CALL_BEGINNINGS = ("read_csv", "read_parquet", "read_excel", "scan_", "write_", "sink_")


@pytest.mark.parametrize("room", MIDDLE)
def test_the_middle_opens_no_file_and_reads_no_clock(room):
    """The same archive, config and week must give the same bytes: everything else is an argument."""
    for path in [path for path in FILES if _room(path) == room]:
        assert not {name.split(".")[0] for name in _imports(path)} & TOUCHES_THE_WORLD, path.name
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                called = getattr(node.func, "attr", getattr(node.func, "id", ""))
                assert called not in CALLS and not called.startswith(CALL_BEGINNINGS), (
                    f"{path.name}: {called}"
                )


def test_slow_libraries_are_imported_where_they_are_used():
    """Starting up must not cost seconds: these load inside the functions that need them."""
    for path in FILES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        top = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
        names = [getattr(node, "module", None) or node.names[0].name for node in top]
        assert not {name.split(".")[0] for name in names} & {"statsmodels", "scipy", "pint", "plotly"}, (
            path.name
        )
