"""The engine and the hand's rules on virtual time, with modelled dials and cuts."""
