"""The packer room."""
