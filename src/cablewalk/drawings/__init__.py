"""Pictures: DOT drawn by Graphviz, with a font of its own."""
