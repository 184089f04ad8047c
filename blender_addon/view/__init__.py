"""What the viewport shows of the results. Knows `scene` and `bridge`, no operator and no panel."""
