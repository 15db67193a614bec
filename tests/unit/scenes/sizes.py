"""Two packages to try scenes on; sizes as in vision/data/families."""

from models.scenes.description import PackageSize

DUAL = PackageSize(
    family="SOIC",
    lead_count=8,
    pitch_mm=1.27,
    body_x_mm=3.9,
    body_y_mm=4.9,
    span_x_mm=6.0,
    lead_width_mm=0.41,
    foot_mm=0.7,
    height_mm=1.55,
    land_length_mm=1.95,
    land_width_mm=0.6,
    land_span_x_mm=6.9,
)
QUAD = PackageSize(
    family="QFP",
    lead_count=48,
    pitch_mm=0.5,
    body_x_mm=7.0,
    body_y_mm=7.0,
    span_x_mm=9.0,
    span_y_mm=9.0,
    lead_width_mm=0.22,
    foot_mm=0.6,
    height_mm=1.4,
    land_length_mm=1.475,
    land_width_mm=0.3,
    land_span_x_mm=9.8,
    land_span_y_mm=9.8,
)
