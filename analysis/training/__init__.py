"""How the stored network and the interval calibration were made. For developers; needs jax; not used when measuring."""
