"""Disinfection: contact time, the CT that the rule asks for, the log inactivation from both."""
