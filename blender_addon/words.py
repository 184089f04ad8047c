"""What the settings are called and what their tips say. One sentence each, without a full stop."""

__all__ = ["COMMON", "TABLES", "TIPS_AUTO", "WORDS"]

TIPS_AUTO = "Let the value follow from the sheet and the sculpt"

TABLES = {
    "job": "Words",
    "sculpt": "Size",
    "sheet": "Sheet",
    "pull": "Pull",
    "draft": "Draft",
    "fill": "Fill",
    "fit": "Fit",
    "base": "Base",
    "vents": "Vents",
}
"""Headings of the tables of the job."""

COMMON = (
    ("sheet", "material"),
    ("sheet", "thickness_mm"),
    ("draft", "wanted_deg"),
    ("pull", "direction"),
    ("fill", "mode"),
)
"""Settings in front; all others stand in closed panels."""

WORDS: dict[tuple[str, str], tuple[str, str]] = {
    ("job", "name"): ("Name", "Name of the job, engraved on the underside and printed in the papers"),
    ("job", "number"): ("Number", "Number of the job, engraved on the underside"),
    ("job", "story"): ("Story", "What the part is for; printed in the papers only"),
    ("sculpt", "file"): ("File", "Sculpt that a job file names; objects of the scene are used instead of it"),
    ("sculpt", "unit"): ("Unit of the File", "Unit of the file that a job file names; the scene has its own"),
    ("sculpt", "width_mm"): ("Width", "Scale the sculpt to this size along the world's X"),
    ("sculpt", "depth_mm"): ("Depth", "Scale the sculpt to this size along the world's Y"),
    ("sculpt", "height_mm"): ("Height", "Scale the sculpt to this size along the world's Z"),
    ("sheet", "material"): ("Material", "Plastic that will be formed"),
    ("sheet", "thickness_mm"): ("Thickness", "Thickness of the flat sheet before it is heated"),
    ("pull", "direction"): ("Pull", "Which way the formed part leaves the buck, in world axes"),
    ("pull", "about"): ("Search About", "Middle of the search for a pull, as a direction in world axes"),
    ("pull", "cone_deg"): ("Search Within", "Largest angle from the middle of the search"),
    ("pull", "directions"): ("Directions", "How many directions the search tries"),
    ("draft", "wanted_deg"): ("Wanted Draft", "Least angle between a wall and the pull that counts as free"),
    ("draft", "texture_depth_mm"): (
        "Texture Depth",
        "Depth of a grain on the surface, which asks for more draft",
    ),
    ("fill", "mode"): ("Fill", "How much solid is added under overhangs"),
    ("fill", "keep_tight"): (
        "Keep Tight Faces",
        "Leave faces with some draft, but less than wanted, as sculpted",
    ),
    ("fill", "tolerance_mm"): ("Tolerance", "Rims that stand out by less than this are left alone"),
    ("fill", "cell_mm"): (
        "Cell",
        "Largest cell of the fill; smaller follows the sculpt closer and takes longer",
    ),
    ("fit", "controlled_side"): ("Exact Side", "Side of the formed sheet that has the size of the sculpt"),
    ("fit", "shrinkage"): (
        "Shrinkage",
        "Share by which the part shrinks as it cools, for example 0.005 for 0.5 %",
    ),
    ("fit", "formed_thickness_mm"): ("Formed Thickness", "Mean thickness of the formed part"),
    ("base", "sink_mm"): ("Sink By", "How far the sculpt is let into the base"),
    ("base", "style"): ("Style", "A flange to seal and clamp on, or a plinth with straight sides"),
    ("base", "footprint"): ("Footprint", "Shape of the base seen from above"),
    ("base", "riser_mm"): ("Riser", "Height of the straight part between sculpt and flange"),
    ("base", "flange_mm"): ("Flange", "Width of the flange around the riser"),
    ("base", "land_mm"): ("Land", "Flat room between the sculpt's outline and the edge of the riser"),
    ("base", "fillet_mm"): ("Fillet", "Radius where the riser meets the flange"),
    ("base", "corner_mm"): ("Corner", "Radius of the corners of the base"),
    ("base", "trim_step_mm"): ("Trim Step", "Width of the ledge to cut along; 0 makes none"),
    ("base", "most_mm"): ("Platen", "Width and depth of the platen; a larger base gets a warning"),
    ("base", "fixing"): ("Fixing", "What holds the buck on the platen"),
    ("base", "fixings"): ("Number of Fixings", "How many screws or magnets hold the buck"),
    ("base", "engrave"): ("Engrave", "Engrave name and number on the underside"),
    ("vents", "enabled"): ("Vents", "Drill a vent into every place where the sheet would shut in air"),
    ("vents", "min_pocket_mm"): ("Least Pocket", "Pockets that are less deep than this need no vent"),
    ("vents", "spacing_mm"): ("Spacing", "Largest distance from any place of a pocket to its vent"),
    ("vents", "hole_mm"): ("Hole", "Diameter of a vent where the sheet touches it"),
    ("vents", "printer_min_hole_mm"): ("Printer's Least Hole", "Smallest hole that the printer leaves open"),
    ("vents", "when_small"): (
        "When Too Small",
        "What is made where the hole is smaller than the printer can leave open",
    ),
    ("vents", "skin_mm"): ("Skin", "Depth of the fine hole before the wide bore begins"),
    ("vents", "back_bore_mm"): ("Back-Bore", "Diameter of the wide bore behind the fine hole"),
    ("vents", "wall_mm"): ("Wall", "Least wall between a bore and the surface or another bore"),
    ("vents", "channel_width_mm"): ("Channel Width", "Width of the air channels in the underside"),
    ("vents", "channel_depth_mm"): ("Channel Depth", "Depth of the air channels in the underside"),
    ("vents", "foot_ring"): (
        "Foot Ring",
        "Also drill vents along the foot of the sculpt, where the sheet closes last",
    ),
    ("vents", "target_s"): (
        "Time to Empty",
        "A pocket should be down to the wanted pressure by then, in seconds",
    ),
    ("vents", "target_share"): (
        "Pressure Left",
        "Share of an atmosphere that may be left in a pocket by then",
    ),
    ("vents", "plenum_kpa"): ("Plenum Pressure", "Absolute pressure under the platen in kilopascals"),
}
"""Label and tip of each setting."""

CHOICES: dict[str, tuple[str, str]] = {
    "search": ("Search", "Try directions and take the one that traps least"),
    "x": ("+X", "Along the world's X"),
    "y": ("+Y", "Along the world's Y"),
    "z": ("+Z", "Along the world's Z"),
    "-x": ("-X", "Against the world's X"),
    "-y": ("-Y", "Against the world's Y"),
    "-z": ("-Z", "Against the world's Z"),
    "vector": ("Own Direction", "Along a direction that is set here"),
    "amount": ("Amount", "By so many millimetres"),
    "widest": ("Widest Outline", "Down to the height where the outline is widest"),
    "not said": ("As the File Says", "Leave it to the file"),
    "full": ("All", "Fill under every overhang and give tight walls their draft"),
    "locked": ("What Locks", "Fill only where the part could not be flexed off"),
    "none": ("None", "Add nothing"),
    "inside": ("Inside", "The inside of the part has the size of the sculpt"),
    "outside": ("Outside", "The outside of the part has the size of the sculpt, the buck is drawn in"),
    "flange": ("Flange", "A flat flange around a riser"),
    "plinth": ("Plinth", "Straight sides down to the platen"),
    "outline": ("Outline", "Follows the outline of the sculpt"),
    "rectangle": ("Rectangle", "A rectangle around the sculpt"),
    "circle": ("Circle", "A circle around the sculpt"),
    "screw": ("Screws", "Holes for screws from beneath"),
    "magnet": ("Magnets", "Seats for magnets"),
    "slot": ("Slot", "A slot that is long enough to stay open"),
    "dimple": ("Dimple", "A mark to drill at after printing"),
    "hole": ("Hole", "The hole as it is"),
    "mm": ("Millimetres", "The file is in millimetres"),
    "cm": ("Centimetres", "The file is in centimetres"),
    "m": ("Metres", "The file is in metres"),
    "in": ("Inches", "The file is in inches"),
}
"""Label and tip of each word of a choice."""
