"""Register maps: a meter described as data, checked before it is believed."""
