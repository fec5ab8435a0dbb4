"""Pages that a lead, a diver and a funder can read: values in, HTML, SVG and GPX text out."""
