"""The pipeline: the engine that runs the stages, the store, and what a run tells and publishes.

Nothing is imported here: what only asks which commands there are should not wait for geometry.
"""
