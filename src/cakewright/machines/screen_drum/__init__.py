"""Screen-drum screw press: the flight alone renews the face of a fixed screen."""
