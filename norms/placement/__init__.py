"""The coach's question: where does this swing sit among its peers?"""
