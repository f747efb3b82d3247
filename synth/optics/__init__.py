"""Surface and in-plane error told as wavefront, blur and collected light."""
