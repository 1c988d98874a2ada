"""Build the bundled clean garden and look at what came out."""

from pathlib import Path

import wiremap

FOLDER = Path(__file__).parent.parent / "data" / "hollow-oak-garden"

asbuilt = wiremap.build_asbuilt(wiremap.read_property(FOLDER))
print(asbuilt)

runs = asbuilt.layers["wire_runs"]
print(runs[["run", "zones", "length_m", "depth_mean_m", "position_rms_m"]].round(2))
print(asbuilt.findings[["severity", "code", "message"]].to_string())
