"""What acts: everything that touches the world, from capture files to the command line."""
