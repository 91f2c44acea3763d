"""The dialogs that open over the running floor, one module each. They are imported when the first one is wanted."""
