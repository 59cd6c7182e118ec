"""A session as a person goes through it: the plan, the queue of dishes, and how it went. Stands above the tests that it is made of."""
