"""The director's question: what the academy asks for, on which evidence, and who meets it."""
