"""Slow, plain reference implementations, written from the definitions and not from the product.

They use shapely, scipy and bisection; where bisection or an offset limits them, the limit
is stated beside the constant. Nothing here imports frontcheck.
"""
