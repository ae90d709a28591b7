"""Belt press: gravity zone, wedge, rollers."""
