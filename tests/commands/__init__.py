"""The commands, one by one."""
