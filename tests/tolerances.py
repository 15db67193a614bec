"""Named tolerances, each with its reason; tests hold no bare small numbers."""

ROUNDING_PX = 1e-6
"""Closed-form geometry in float64 on coordinates up to some thousand pixels."""

ROUNDING_DEG = 1e-6
"""The same for angles."""

ROUNDING_MM = 1e-9
"""Lengths added and halved in float64."""

TABLE_MM = 0.005
"""Half of the last digit that package drawings and land patterns are given to."""

LOSSY_GREY_LEVELS = 12
"""A lossy file at quality 90 or better keeps a flat patch this close."""

FOCUS_SIGMA_SHARE = 0.35
"""A blur estimate from noisy edges; what is judged differs by a factor of two."""

REGISTRATION_PX = 0.3
"""Two drawn boards with noise, at the chip, before pixels; task needs about 1 px."""

ALIGNMENT_MM = 0.01
"""A drawn chip followed by its marking; a hundredth of what a lead may move."""

ALIGNMENT_RIM_MM = 0.03
"""The same by the body's edge alone."""

LEADS_MM = 0.02
"""Drawn leads of one height found again; path-traced ones scatter by 0.013 mm."""

LEADS_SKEW_DEG = 0.25
"""The turn of eight drawn leads; path-traced ones scatter by 0.1 degrees."""

SCALE_FRAC = 0.005
"""One drawn outline against another of the same size, moved and skewed."""
