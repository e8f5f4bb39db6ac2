"""From a study to a shim plan: what to fit where, out of the box at hand."""
