"""Sentences, made of codes and finished figures alone: nothing else makes one, and nothing reads one."""
