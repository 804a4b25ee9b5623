#!/bin/sh
# The emergence tables of the shipped crops against the published table.
exec /usr/bin/python3 tests/outside/crops.py
