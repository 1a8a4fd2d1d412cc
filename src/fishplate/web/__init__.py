"""The page: Fishplate in a browser, on the phone in the garage. A thin skin; every asset is local.

- `app`: `create_app`, the one place where rooms, guard and static files are put together
- `desk`: the build in memory by revision, writes, undo, the last plan
- `ask`: one request: what is shown, what was typed, and how a change is written
- `form`: typed text read into values, every problem beside its field
- `guard`: host, origin and size of a request; headers of a response
- `kept`, `verdicts`: what takes a moment to work out, kept by revision; what is known about fit
- `trials`: the plan of a build as it would be, beside the plan as it is
- `worker`: plans, worked out in a process of their own
- `words`: how days, money, chances and verdicts are shown
- rooms, each a page model and thin routes: `week`, `parts`, `interfaces`, `jobs`, `decisions`, `buying`, `money`,
  `history`, `importing`, `api`
"""

from .app import create_app

__all__ = ["create_app"]
