"""Airflow in wood-dust extraction ducts: the service."""

__version__ = "0.1.1"
