"""Make the demo plant from the command line: ``python -m pipeline.demo DIR --weeks N --seed S``."""

from argparse import ArgumentParser
from pathlib import Path

from pipeline.demo.plant import make_plant

parser = ArgumentParser(prog="python -m pipeline.demo", description="make the invented plant of Harrow Fork")
parser.add_argument("folder", type=Path)
parser.add_argument("--weeks", type=int, default=60)
parser.add_argument("--seed", type=int, default=1)
parser.add_argument("--step", type=int, default=15, help="minutes between readings")
chosen = parser.parse_args()
make_plant(chosen.folder, chosen.weeks, chosen.seed, chosen.step)
