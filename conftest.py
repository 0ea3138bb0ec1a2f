"""What tests of all rooms share: small plants on disk, and golden files with a flag to write them anew."""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config.load import Plant, load

PLANT_TOML = """\
name = "Small plant"
time_zone = "America/Denver"

[exports]
trends = "trends"
lab = "lab"
logbook = "logbook"

[[area]]
id = "filters"
name = "Filters"
plant = "water"

[[area]]
id = "clearwell"
name = "Clearwell"
plant = "water"
"""

TAGS_CSV = """\
tag,export_name,area,measures,unit,export_unit,low,high,instrument,states,sentinels
AIT-1,Filter turbidity,filters,turbidity,NTU,,0,5,AE-1,,-99|9999
YS-1,,filters,state,1,,,,,0=Off|1=On,
AIT-2,,clearwell,chlorine,mg/L,,0,5,,,
TIT-2,,clearwell,temperature,degC,degF,0,40,,,
FIT-2,,clearwell,flow,MGD,gpm,0,2,,,
"""

INSTRUMENTS_CSV = "instrument,kind,place\nAE-1,turbidimeter,gallery\n"
LIMITS_CSV = "limit_id,tag,high\nL-1,AIT-1,0.3\n"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the flag that writes golden files anew."""
    parser.addoption("--regenerate-golden", action="store_true", help="write the golden files anew")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[Path, str], None]:
    """Compare text with a golden file; with --regenerate-golden write it first, for a person to read."""

    def compare(path: Path, text: str) -> None:
        if request.config.getoption("--regenerate-golden"):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode())
        assert text == path.read_bytes().decode()

    return compare


@pytest.fixture
def make_plant(tmp_path: Path) -> Callable[..., Plant]:
    """Write a plant's folder and load it; `reading` is its [reading] section, `top` and `more` other keys."""

    def make(
        folder: str = "plant",
        reading: str = "",
        tags: str = TAGS_CSV,
        top: str = "",
        more: str = "",
        **exports: str | bytes,
    ) -> Plant:
        config = tmp_path / folder / "config"
        config.mkdir(parents=True, exist_ok=True)
        section = f"\n[reading]\n{reading}\n" if reading else ""
        (config / "plant.toml").write_text("\n".join(filter(None, (top, PLANT_TOML + section, more))))
        (config / "tags.csv").write_text(tags)
        (config / "instruments.csv").write_text(INSTRUMENTS_CSV)
        (config / "limits.csv").write_text(LIMITS_CSV)
        trends = tmp_path / folder / "trends"
        trends.mkdir(exist_ok=True)
        for name, content in exports.items():
            data = content if isinstance(content, bytes) else content.encode()
            (trends / f"{name}.csv").write_bytes(data)
        return load(tmp_path / folder)

    return make


@pytest.fixture
def plant(make_plant: Callable[..., Plant]) -> Plant:
    """Return a small plant on Denver's clock, without exports."""
    return make_plant()
