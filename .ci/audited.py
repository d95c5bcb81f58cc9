"""Reads what pip-audit found (JSON on stdin): fails on a known weakness of a dependency, says what nobody looked at."""

import json
import sys

NOT_OURS = {"pip", "setuptools", "pivotfront"}  # what an environment brings, and what is audited

found = [one for one in json.load(sys.stdin)["dependencies"] if one["name"] not in NOT_OURS]
looked_at = [one for one in found if "skip_reason" not in one]
weak = [f"{one['name']} {one['version']}: {flaw['id']}" for one in looked_at for flaw in one["vulns"]]
if not looked_at:
    print("not audited: the database of weaknesses gives no answer from here")
else:
    print(f"{len(looked_at)} of {len(found)} dependencies audited, {len(weak)} known weaknesses", *weak, sep="\n  ")
sys.exit(bool(weak))
