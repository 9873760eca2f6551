"""The TOML file, validated: what the building is. Pure."""
