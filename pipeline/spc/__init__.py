"""Spc: the charts of statistical process control as plain functions of arrays."""
