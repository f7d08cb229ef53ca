// One count.
out float result;

void main()
{
    result = 1.0;
}
