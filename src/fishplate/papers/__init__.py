"""What is written to be read away from the program.

- `page`: the plan as one self-contained page of HTML that opens without a network
- `charts`: the page's charts, each from one definition; each has its table beside it
- `templates/`: the page's markup and style
"""

from .page import plan_page

__all__ = ["plan_page"]
