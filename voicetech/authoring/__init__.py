"""From dialogs and grammars on disk to procedures, or findings with their places."""
