from hypothesis import settings

settings.register_profile("physics", deadline=None, derandomize=True, max_examples=150)
settings.load_profile("physics")
