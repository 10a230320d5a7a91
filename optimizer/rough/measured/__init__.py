"""A piece without a scan: caliper readings become a closed mesh, with faces and axes by its form.

README.md beside this file describes the forms and their keys. Each form has a module.
"""

from optimizer.rough.measured.build import build_measured as build_measured
