"""Plates, sections and the panel-and-joint network: accuracy, modes, thermal bow, gravity release, launch."""
