"""Write the as-built of the messy property and list what a person should look at."""

import sys
import tempfile
from pathlib import Path

import wiremap

FOLDER = Path(__file__).parent.parent / "data" / "millrace-court"
out = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp())

asbuilt = wiremap.build_asbuilt(wiremap.read_property(FOLDER))
for path in asbuilt.write(out):
    print(path.relative_to(out))

urgent = asbuilt.findings[asbuilt.findings["severity"] != "note"]
for finding in urgent.itertuples():
    print(f"{finding.severity}: {finding.code}: {finding.message} {finding.advice}")
