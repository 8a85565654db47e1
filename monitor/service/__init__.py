"""The running service: owns the clock and the threads, and calls the steps in their order."""

from monitor.service.night_job import NightReportWritten
from monitor.service.service import Service, system_clock_ms

__all__ = ["NightReportWritten", "Service", "system_clock_ms"]
