"""SunSpec meters: found by their marker, their models' places worked out, then read like any other Modbus meter."""
