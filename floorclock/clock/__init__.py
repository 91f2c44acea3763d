"""When things happen: timeline, cues, events, and the class state that the events fold into."""
