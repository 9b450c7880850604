"""What must happen: workflows, agents, configurations and profiles as data, read, proved and drawn."""
