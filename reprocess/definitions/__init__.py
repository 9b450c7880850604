"""What must happen: workflows, agents and configurations as data, read, proved and drawn."""
