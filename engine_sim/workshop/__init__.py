"""What a person does and perceives: controls and rules, instruments, the road, the session, and its evidence."""
