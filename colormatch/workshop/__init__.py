"""What a maker does: functions of a library and a palette, called by the page, the command line and scripts alike."""
