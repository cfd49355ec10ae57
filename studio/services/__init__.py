"""What changes people, terms, ensembles, invitations, notices and jobs. Views call these; these call the models."""
