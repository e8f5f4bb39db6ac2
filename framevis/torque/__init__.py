"""The check before final torque, the torques and the order of tightening."""
