"""The stages before and after the charge: each turns facts into one instruction and its checks."""
