"""The terms of the balance, one a file: each with its flow, its tangent, its storage and its paths in the audit."""
