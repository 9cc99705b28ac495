"""The exchange folder: one CSV file per noun, read all or nothing, written so that it reads back the same."""
