"""What is written to be read away from the program.

- `page`: the plan as one self-contained page of HTML that opens without a network
- `shop_sheet`: an evening's work on one sheet; `declaration`: what a trip brings over the border
- `charts`, `share_chart`: charts, each from one definition with its table beside it
- `environment`: the templates all papers are made from
- `templates/`: the page's markup and style
"""

from .page import plan_page

__all__ = ["plan_page"]
