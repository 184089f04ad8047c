"""Makes the pictures of Blender in docs/ of those that scenario_sample has taken: smaller, in 256 colours."""

import sys

from PIL import Image
from run import OUT, ROOT

SIZE = (1280, 800)
NAMES = ("look", "buck", "vents", "forecast")


def main() -> None:
    """Write docs/blender_*.png."""
    for name in NAMES:
        target = ROOT / "docs" / f"blender_{name}.png"
        with Image.open(OUT / f"sample_{name}.png") as taken:
            small = taken.convert("RGB").resize(SIZE, Image.Resampling.LANCZOS)
        few = small.quantize(256, Image.Quantize.MAXCOVERAGE, kmeans=1, dither=Image.Dither.NONE)
        few.save(target, optimize=True)
        sys.stdout.write(f"{target.relative_to(ROOT)}  {target.stat().st_size / 1000:.0f} kB\n")


if __name__ == "__main__":
    main()
