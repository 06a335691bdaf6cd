"""What has happened? The events of a unit, their one line each, and the state that replaying them gives."""
