"""What the machine gives and takes: signals, processes, full disks, folders that are not finished yet."""
