# Thin wrapper over uv. `make demo` builds a sample's buck, `make test` runs every check.
UV := $(shell command -v uv 2>/dev/null || echo .tools/bin/uv)
# An interpreter that is already on the machine is preferred; elsewhere uv fetches one.
PYTHON := $(shell ls -d $${PYENV_ROOT:-$$HOME/.pyenv}/versions/3.13*/bin/python3.13 2>/dev/null | tail -1)
PYTHON := $(or $(PYTHON),3.13)
RUN := .venv/bin
SCENE ?= heron_mask
# The heron's job sheet is for a table-top machine that is larger than the mask; other scenes are for any.
BENCH ?= $(if $(filter heron_mask,$(SCENE)),--machine-profile HOME_BOX_300_450 --rig-reducing)

# Tests of properties, looked at anew by `make explore`, and how many times each takes its examples.
PROPERTIES ?= $(shell grep -rl '^from hypothesis' tests --include='test_*.py')
ROUNDS ?= 10

.PHONY: demo test explore samples blends extension pictures docs env bench figures clean

demo: env
	$(RUN)/python sample_scenes/make_samples.py $(SCENE)
	$(RUN)/buckwright make sample_scenes/$(SCENE)/job.toml --out out/$(SCENE) $(BENCH)

samples: env
	$(RUN)/python sample_scenes/make_samples.py

# The samples as files of Blender, with the settings of their jobs.
blends: env
	$(UV) sync --quiet --locked --inexact --python $(PYTHON) --group blender
	UV=$(UV) $(RUN)/python sample_scenes/make_blends.py

# The zips of the Blender extension, one for each platform, in dist/.
extension: env
	$(UV) sync --quiet --locked --inexact --python $(PYTHON) --group blender
	UV=$(UV) $(RUN)/python blender_addon/package.py

# The pictures of Blender in docs/, anew. Needs a window: BUCKWRIGHT_GUI, see tests/gui/README.md.
pictures: env
	$(UV) sync --quiet --locked --inexact --python $(PYTHON) --group blender
	$(RUN)/python sample_scenes/make_samples.py heron_mask
	UV=$(UV) $(RUN)/python tests/gui/run.py scenario_sample
	$(RUN)/python tests/gui/pictures.py

test: env
	$(UV) sync --quiet --locked --inexact --python $(PYTHON) --group blender
	$(RUN)/ruff check .
	$(RUN)/ruff format --check .
	$(RUN)/mypy
	$(RUN)/lint-imports
	$(RUN)/pytest -n 2 --dist loadfile

# Every round draws fresh examples; what fails is kept in .hypothesis and tried first the next time.
explore: env
	BUCKWRIGHT_ALL_SETTINGS=1 $(RUN)/pytest -q -n 2 tests/main/test_kept_equals_fresh.py tests/printing \
		tests/pose/test_expected_setups.py
	grep '^tests' tests/left_to_explore.txt | BUCKWRIGHT_ALL_SETTINGS=1 xargs -d '\n' $(RUN)/pytest -q
	for round in $$(seq $(ROUNDS)); do \
		$(RUN)/pytest -q -m hypothesis --hypothesis-profile=explore $(PROPERTIES) || exit 1; \
	done

bench: env
	$(UV) sync --quiet --inexact --python $(PYTHON) --group bench --group blender
	$(RUN)/pytest benchmarks

# The figures of docs/explanation/forecast.md, printed anew; SECTIONS="arch slip" prints only those.
figures: env
	$(RUN)/python benchmarks/forecast_figures.py $(SECTIONS)

# The documentation, in site/. The variable quiets what the theme has to say of its own future.
docs: env
	$(UV) sync --quiet --locked --inexact --python $(PYTHON) --group docs
	NO_MKDOCS_2_WARNING=1 $(RUN)/mkdocs build --strict

env: $(UV)
	@$(UV) python find --quiet $(PYTHON) >/dev/null 2>&1 || $(UV) python install --quiet $(PYTHON) || \
	  { echo "Python 3.13 is not here and cannot be fetched: install it, and name it by make PYTHON=/path/to/python3.13"; exit 1; }
	$(UV) sync --quiet --locked --inexact --python $(PYTHON)

.tools/bin/uv:
	python3 -m venv .tools
	.tools/bin/python -m pip install --quiet uv

$(UV):

clean:
	rm -rf .venv .tools out dist site
