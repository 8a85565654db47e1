"""The parts of the page, in the order of the navigation. A new part is added here and nowhere else."""

from __future__ import annotations

from monitor.views.page.alarms_part import ALARMS
from monitor.views.page.bins_part import BINS
from monitor.views.page.cohorts_part import COHORTS
from monitor.views.page.logbook_part import LOGBOOK
from monitor.views.page.me_part import ME
from monitor.views.page.night_part import NIGHT
from monitor.views.page.nodes_part import NODES
from monitor.views.page.now_part import NOW_PAGE
from monitor.views.page.place_part import PLACE_PAGE
from monitor.views.page.serving import Part

NOW = Part("now", "/", (NOW_PAGE, PLACE_PAGE))
PARTS: tuple[Part, ...] = (NOW, NIGHT, BINS, COHORTS, ALARMS, LOGBOOK, NODES, ME)
