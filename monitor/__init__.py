"""Everything that happens to a reading after a meter gave it: plan, engine, log, screens, commands."""
