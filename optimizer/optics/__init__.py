"""The look: ray paths in a facetted body, absorption by zone, face-up picture, figures."""
