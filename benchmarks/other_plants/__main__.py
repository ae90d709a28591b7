"""Write a set of plants: python benchmarks/other_plants --set development --out plants."""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from other_plants.plants import DAYS, SETS, numbers, plant
from other_plants.writers import write_plant


def main():
    """Write the plants asked for, each into a folder of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--set", choices=list(SETS), default="development", dest="set_name")
    parser.add_argument("--instruments", choices=["full", "typical"], default="full")
    parser.add_argument("--number", type=int, action="append", help="one plant; may be repeated")
    parser.add_argument("--days", type=int, default=DAYS)
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    for number in asked.number or range(numbers(asked.set_name)):
        made = plant(asked.set_name, number, asked.instruments, asked.days)
        write_plant(asked.out / made["key"], made)
        told = ", ".join(f["name"] for f in made["faults"]) or "no fault"
        print(f"{made['key']}: {len(made['log']['minute'])} minutes, {told}")


main()
