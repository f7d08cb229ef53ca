"""Line-up: test patterns as code values, that show whether a screen is as it is believed to be. No GL, no files."""
