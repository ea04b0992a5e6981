"""The paper before power: what is planned on each circuit, feeder, leg and the source, and what stands out."""
