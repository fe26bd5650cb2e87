"""What is joined to what, and which currents flow: read from the nets and the parts' figures alone."""
