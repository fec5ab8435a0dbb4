"""Whether one row, by itself, has the shape of its kind. What needs other events is standing's business."""
