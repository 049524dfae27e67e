"""Rendered fracture faces with exact truth, for training and tests: invented data, no real part stands behind them.

The road: spec (draw everything) -> roads, layers, defects (geometry) -> weld (what tore) -> relief (heights) ->
light (shading) -> backdrop, dirt -> optics (JPEG) -> truth.
"""
