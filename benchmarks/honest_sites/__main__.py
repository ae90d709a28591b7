"""Write sites: python benchmarks/honest_sites --set development --number 0 --out sites."""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from honest_sites.sites import NUMBER, SETS, site
from honest_sites.writers import write_site


def main():
    """Write the sites asked for, each into a folder of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--set", choices=list(SETS), default="development", dest="set_name")
    parser.add_argument("--number", type=int, action="append", help="one site; may be repeated")
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    for number in asked.number or range(NUMBER):
        made = site(asked.set_name, number)
        write_site(asked.out / made["key"], made)
        print(f"{made['key']}: {len(made['pilot'])} runs, {len(made['questions'])} questions")


main()
