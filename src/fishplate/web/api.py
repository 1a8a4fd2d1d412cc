"""The JSON API: read the build and the plan, change the build, run a plan."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(prefix="/api")
