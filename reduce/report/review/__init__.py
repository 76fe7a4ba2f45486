"""The review page: one file that shows the draft under its source and answers for every note, offline and on paper."""

from reduce.report.review.material import Drawn, Material
from reduce.report.review.page import page

__all__ = ["Drawn", "Material", "page"]
