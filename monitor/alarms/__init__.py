"""Alarms after ISA-18.2 / IEC 62682: rules, state machine, timing, alarm health."""
