"""The pipeline: the engine that runs the stages, the store, and what a run tells and publishes."""

from buckwright.make.run import run

__all__ = ["run"]
