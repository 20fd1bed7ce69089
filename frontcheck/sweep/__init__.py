"""Shape studies: thousands of variants of a nose or a measured front through the lines."""

from frontcheck.sweep.checking import StudyError
from frontcheck.sweep.executors import Crew, cluster_crew, local_crew
from frontcheck.sweep.measuring import Setup, measure
from frontcheck.sweep.reading import parse_study, read_study
from frontcheck.sweep.results import Results, read_results
from frontcheck.sweep.run import SweepRun, run_sweep
from frontcheck.sweep.study import Limit, Study, Varied

__all__ = [
    "Crew",
    "Limit",
    "Results",
    "Setup",
    "Study",
    "StudyError",
    "SweepRun",
    "Varied",
    "cluster_crew",
    "local_crew",
    "measure",
    "parse_study",
    "read_results",
    "read_study",
    "run_sweep",
]
